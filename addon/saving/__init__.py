"""Files of a job, in a folder that is written whole or not at all."""
