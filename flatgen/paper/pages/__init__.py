"""Framed pages: title block, tables, text, and how blocks flow onto them."""
