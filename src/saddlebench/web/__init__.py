"""Pages of the practice; thin. Each folder but `base` is a slice: its urls, views, forms, templates."""
