"""What can be believed? Flags, spans and gaps."""
