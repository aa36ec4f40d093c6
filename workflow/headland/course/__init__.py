"""For teaching: answers, exercises, class notes."""
