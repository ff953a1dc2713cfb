"""A back rebuilt elsewhere: settings, templates, ribs, solids, the whole kit, and the proof of a rebuild."""
