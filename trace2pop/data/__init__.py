"""Tables of stocks, cards, envelopes and cutters, each row with its source."""
