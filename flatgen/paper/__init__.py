"""What leaves the desk: drawings, templates, the shop sheet, pictures of stages, cards and reports of strips."""
