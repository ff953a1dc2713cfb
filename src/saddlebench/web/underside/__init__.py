"""A scan of a saddle lying upside down: brought, looked at, and recorded as a version of the saddle."""
