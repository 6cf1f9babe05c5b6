"""The untreated path and the shape of a rise: dynamics, candidates, windows of readings, the Kalman filter."""
