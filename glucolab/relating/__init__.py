"""What moves it, did it change? Effects, dishes, trials, labs, periods."""
