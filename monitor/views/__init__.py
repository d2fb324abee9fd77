"""Plain dictionaries of what is shown: made from a judgement and the store, used by the commands and by the board."""
