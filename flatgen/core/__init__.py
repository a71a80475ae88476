"""What all rooms hand around, and what needs nothing: errors, units, files, the flat, the shop, the schedule."""
