"""Paper for rebuilding a back: templates, sheets of settings, the rebuild check sheet; and the kit."""
