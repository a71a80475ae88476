"""What the sheet does: tables with their sources, allowance, minimum radius, gauges."""
