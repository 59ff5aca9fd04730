"""What will a meal do? A model of what followed meals, forecasts from earlier days, one meal, what the log alone tells."""
