"""Many jobs: weighed, added up, learned from, and turned into a policy."""
