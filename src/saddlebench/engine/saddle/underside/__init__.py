"""A saddle's underside from a scan of the saddle lying upside down, or from sections traced on paper."""
