"""What is measured, how, and against what. Each module has a `main` that prints its table."""
