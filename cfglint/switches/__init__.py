"""What every position of every switch does: intervals, positions, modes, states, answers."""
