#!/usr/bin/env bash
# Holds hackle's way through time against CVODE, the general solver of stiff
# equations of SUNDIALS, on the same linear networks of heat, and prints time and
# error of both as Markdown tables: see docs/speed-solver.md. Needs gcc, and on
# Debian the package libsundials-dev. Arguments go to bench/solver (-runs N, -detail).
set -euo pipefail
cd "$(dirname "$0")/.."
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
if ! command -v gcc >/dev/null || [ ! -e /usr/include/cvode/cvode.h ]; then
  echo "compare.sh: needs gcc and CVODE: apt-get install gcc libc6-dev libsundials-dev" >&2
  exit 1
fi
gcc -O2 -march=native -I/usr/include/suitesparse bench/cvode/cvode.c -o "$work/cvode" \
  -lsundials_cvode -lsundials_nvecserial -lsundials_sunlinsolklu -lsundials_sunlinsoldense \
  -lsundials_sunlinsolband -lsundials_sunmatrixsparse -lsundials_sunmatrixband -lsundials_sunmatrixdense -lm
go build -o "$work/solver" ./bench/solver
echo "load when begun: $(cut -d' ' -f1-3 /proc/loadavg); $(nproc) processors, $(sed -n 's/^model name[^:]*: //p' /proc/cpuinfo | head -1)"
# One core for both.
pin=""
if command -v taskset >/dev/null; then pin="taskset -c 0"; fi
GOMAXPROCS=1 $pin "$work/solver" -cvode "$work/cvode" "$@"
