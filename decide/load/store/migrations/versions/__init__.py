"""One module a change. A change that has been released is never edited: what it left out comes as another."""
