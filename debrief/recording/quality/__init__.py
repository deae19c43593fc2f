"""What is wrong or coarse in recorded data, as flags."""
