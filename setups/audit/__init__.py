"""What a manager looks for across the business's cards: what is missing, late, amended, or out of calibration."""
