"""What can be done: one function for each change, which checks, saves and writes the trail in one go."""
