#!/bin/bash
# The same on one machine: every unit that has no result, as a process of its own, as
# many at a time as there are cores.
#
#   docs/sweep/local.sh region
set -euo pipefail
folder=${1:?the folder of the sweep}
hackle=${HACKLE:-hackle}
"$hackle" sweep gather "$folder" --missing --json | tr -c '0-9' '\n' | grep . |
  xargs -r -P "$(nproc)" -I{} "$hackle" sweep work "$folder" --unit {} --workers 1
