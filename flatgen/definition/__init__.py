"""A part as its definition (TOML) says it: read, resolved to numbers, judged, and developed by arithmetic."""
