"""What is measured of one start: speeds, temperatures, electrics, times, surroundings, contributing factors."""
