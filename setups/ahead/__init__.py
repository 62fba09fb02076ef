"""What follows from a card's numbers and is asked for when it is unfolded: each module asks calc one thing."""
