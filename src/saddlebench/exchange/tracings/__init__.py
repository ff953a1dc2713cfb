"""Photos of traced paper: the sheet found and measured, and its pen lines turned into curves."""
