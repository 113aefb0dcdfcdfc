"""One file per kind of stage: from its dimensions to tools and their motion."""
