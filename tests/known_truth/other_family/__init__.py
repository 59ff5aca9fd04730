"""Effects judged on invented wearers of a second family, written without a look at the first or at the estimators."""
