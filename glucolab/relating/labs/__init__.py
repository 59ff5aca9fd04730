"""What did the laboratory find? Analytes, their changes over noise, draws beside the sensor, cautions."""
