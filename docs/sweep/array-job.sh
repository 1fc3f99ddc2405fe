#!/bin/bash
# Array job of a cluster scheduler (this one in the form that sbatch reads). Submit it
# from the folder that holds the sweep:
#
#   sbatch --array=1-240%64 docs/sweep/array-job.sh region
#
# After a failure submit what is missing:
#
#   sbatch --array="$(hackle sweep gather region --missing)" docs/sweep/array-job.sh region
#
#SBATCH --job-name=hackle-sweep
#SBATCH --cpus-per-task=1
#SBATCH --mem=512M
#SBATCH --time=02:00:00
#SBATCH --requeue
set -euo pipefail
folder=${1:?the folder of the sweep}
# Other schedulers name the index otherwise: give what yours says in ARRAY_INDEX.
index=${ARRAY_INDEX:-${SLURM_ARRAY_TASK_ID:-${PBS_ARRAY_INDEX:-${SGE_TASK_ID:?no index of an array job}}}}
exec "${HACKLE:-hackle}" sweep work "$folder" --unit "$index" --workers "${SLURM_CPUS_PER_TASK:-1}"
