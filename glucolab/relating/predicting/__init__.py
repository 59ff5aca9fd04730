"""What will a meal do? A model of what followed meals, forecasts from earlier days, one meal, the log alone."""
