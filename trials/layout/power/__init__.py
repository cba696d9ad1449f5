"""What a planned trial can detect: precision, sample size, and how much plots vary."""
