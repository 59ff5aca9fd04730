"""Where does it come from? Study folders and tables as people write them, with everything wrong in them named."""
