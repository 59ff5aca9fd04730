"""Do the intervals hold on real people's sensors, where what is true is planted or seen by a second sensor?"""
