#!/bin/sh
# An example: a folder of recordings on a file system that all machines see, done by an array of eight tasks.
#   sbatch samples/clusters/slurm.sh
# Each task finds its part in the environment that Slurm gives it. A task that failed is run again by its number
# (`sbatch --array=3 ...` needs `--shard 3/8`, since an array of one does not know that there were eight).
#SBATCH --job-name=drafts
#SBATCH --array=1-8
#SBATCH --cpus-per-task=2
#SBATCH --mem=2G
#SBATCH --time=04:00:00
set -eu
from=${FROM:-$HOME/visits}
to=${TO:-$HOME/drafts}

spoken-exam batch "$from" --to "$to" --threads "${SLURM_CPUS_PER_TASK:-2}" || [ $? = 1 ]

# When all tasks have ended, on any machine:
#   spoken-exam batch "$FROM" --to "$TO" --gather
