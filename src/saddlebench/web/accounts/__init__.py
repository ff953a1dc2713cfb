"""First start, signing in and out, one's own account, the practice and its members."""
