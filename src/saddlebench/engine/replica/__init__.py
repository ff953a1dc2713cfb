"""Everything needed to rebuild a back elsewhere, and to prove the rebuild: shapes, no files, no paper."""
