"""Air columns, in closed form: only to check that a split leaves a wind instrument in tune."""
