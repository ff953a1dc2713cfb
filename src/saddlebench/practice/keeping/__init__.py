"""Keeping: verified backups, restoring, upgrading without risk, and leaving with everything."""
