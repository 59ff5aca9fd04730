"""What would blood have shown? Lag, bias and the trace."""
