"""Did it change? Periods, their differences, the trend, habits, and the sensor beside the meter."""
