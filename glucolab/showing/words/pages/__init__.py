"""What do the pages say? Sentences of the wear's, the day's, the study's, the plan's and the hand-over page."""
