"""Tags of the measuring pages."""
