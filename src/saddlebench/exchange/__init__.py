"""Files in and out, each with a reader, a writer, a schema and limits."""
