"""What pixels show. Arrays of shape (M, N), rows first; never opens a file."""
