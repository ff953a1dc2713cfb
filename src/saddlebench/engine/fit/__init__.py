"""Fit: settling a saddle on a back, what is read off it, and how sure that is."""
