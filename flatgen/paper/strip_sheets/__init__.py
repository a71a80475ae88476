"""Paper of test strips: measuring card, form to fill in, report."""
