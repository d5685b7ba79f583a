"""What the package offers at its top: calls that take ids, paths, text and plain data, and answers that show themselves."""
