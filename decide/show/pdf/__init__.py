"""Paper: the hand-out and the policy card."""
