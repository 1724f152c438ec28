"""What is shown of a part that was surveyed and planned: lines and words, in the part frame."""
