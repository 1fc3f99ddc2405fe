/*
 * Carries a network of heat, written by hackle, through its weather with CVODE,
 * the general solver of stiff equations of SUNDIALS, to compare with hackle's own
 * scheme. Built by bench/compare.sh for that comparison alone.
 *
 *   cvode NETWORK SOLVER MODE ORDER RTOL RUNS OUT
 *
 * NETWORK is the text file described at bench/solver/network.go. SOLVER is dense,
 * band or klu. MODE says what is done about the hours, where the slope of the
 * weather changes: "over" steps over them and interpolates, "stop" ends a step at
 * each, "anew" ends a step there and starts again at order one. ORDER is the highest
 * order of the formula. RTOL is the relative tolerance, the absolute one is ten
 * times as many kelvin. The whole span is solved RUNS times. OUT receives the
 * temperatures of all nodes at every full hour from the start, as doubles. To
 * standard output goes one line: the median processor time of a run [s], the
 * shortest, and the counts of steps, evaluations, set-ups, Jacobians, iterations
 * and failed error tests.
 *
 * The Jacobian is the exact one.
 */
#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sunlinsol/sunlinsol_band.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunlinsol/sunlinsol_klu.h>
#include <sunmatrix/sunmatrix_band.h>
#include <sunmatrix/sunmatrix_dense.h>
#include <sunmatrix/sunmatrix_sparse.h>
#include <time.h>

#define HOUR 3600.0

typedef struct {
  int nodes, inputs, hours;
  double *start, *capacity;
  int *row, *column; /* of K over C by rows, row[i] to row[i+1] */
  double *rate;
  int *driveRow, *driveInput;
  double *drive;
  double *input; /* inputs of hour h from h*inputs on */
  double *now;   /* inputs at the time of an evaluation */
  int band;      /* greatest distance of an entry from the diagonal */
  char solver;
} Network;

static void die(const char *what) {
  fprintf(stderr, "cvode: %s\n", what);
  exit(1);
}

static void must(int flag, const char *what) {
  if (flag < 0) {
    fprintf(stderr, "cvode: %s failed with %d\n", what, flag);
    exit(1);
  }
}

static void *room(size_t n, size_t size) {
  void *p = calloc(n ? n : 1, size);
  if (!p) die("no memory");
  return p;
}

static void load(const char *path, Network *n) {
  FILE *f = fopen(path, "r");
  if (!f) die("cannot open the network");
  int version, entries, drives;
  if (fscanf(f, "hackle-network %d nodes %d entries %d drives %d inputs %d hours %d", &version, &n->nodes, &entries,
             &drives, &n->inputs, &n->hours) != 6 ||
      version != 1)
    die("the file does not begin like a network of version 1");
  n->start = room(n->nodes, sizeof(double));
  n->capacity = room(n->nodes, sizeof(double));
  for (int i = 0; i < n->nodes; i++)
    if (fscanf(f, " node %lf %lf %*s", &n->capacity[i], &n->start[i]) != 2) die("bad node");
  n->row = room(n->nodes + 1, sizeof(int));
  n->column = room(entries, sizeof(int));
  n->rate = room(entries, sizeof(double));
  n->band = 0;
  for (int k = 0, last = 0; k < entries; k++) {
    int i, j;
    double v;
    if (fscanf(f, " entry %d %d %lf", &i, &j, &v) != 3 || i < last || i >= n->nodes || j < 0 || j >= n->nodes)
      die("bad entry");
    last = i;
    n->row[i + 1] = k + 1;
    n->column[k] = j;
    n->rate[k] = -v / n->capacity[i];
    if (abs(i - j) > n->band) n->band = abs(i - j);
  }
  for (int i = 0; i < n->nodes; i++)
    if (n->row[i + 1] < n->row[i]) n->row[i + 1] = n->row[i];
  n->driveRow = room(drives + 1, sizeof(int));
  n->driveInput = room(drives, sizeof(int));
  n->drive = room(drives, sizeof(double));
  n->driveRow[drives] = -1;
  for (int k = 0; k < drives; k++) {
    int i, j;
    double v;
    if (fscanf(f, " drive %d %d %lf", &i, &j, &v) != 3 || i < 0 || i >= n->nodes || j < 0 || j >= n->inputs)
      die("bad drive");
    n->driveRow[k] = i;
    n->driveInput[k] = j;
    n->drive[k] = v / n->capacity[i];
  }
  n->input = room((size_t)(n->hours + 1) * n->inputs, sizeof(double));
  n->now = room(n->inputs, sizeof(double));
  for (int h = 0; h <= n->hours; h++) {
    int at;
    if (fscanf(f, " at %d", &at) != 1 || at != h) die("bad hour");
    for (int k = 0; k < n->inputs; k++)
      if (fscanf(f, "%lf", &n->input[(size_t)h * n->inputs + k]) != 1) die("bad input");
  }
  fclose(f);
}

static int rates(realtype t, N_Vector y, N_Vector ydot, void *data) {
  Network *n = data;
  const double *T = N_VGetArrayPointer(y);
  double *d = N_VGetArrayPointer(ydot);
  int h = (int)(t / HOUR);
  if (h < 0) h = 0;
  if (h > n->hours - 1) h = n->hours - 1;
  double share = t / HOUR - h;
  const double *a = n->input + (size_t)h * n->inputs, *b = a + n->inputs;
  for (int k = 0; k < n->inputs; k++) n->now[k] = a[k] + share * (b[k] - a[k]);
  for (int i = 0; i < n->nodes; i++) {
    double sum = 0;
    for (int k = n->row[i]; k < n->row[i + 1]; k++) sum += n->rate[k] * T[n->column[k]];
    d[i] = sum;
  }
  for (int k = 0; n->driveRow[k] >= 0; k++) d[n->driveRow[k]] += n->drive[k] * n->now[n->driveInput[k]];
  return 0;
}

static int jacobian(realtype t, N_Vector y, N_Vector fy, SUNMatrix J, void *data, N_Vector a, N_Vector b, N_Vector c) {
  Network *n = data;
  (void)t, (void)y, (void)fy, (void)a, (void)b, (void)c;
  switch (n->solver) {
  case 'd':
    for (int i = 0; i < n->nodes; i++)
      for (int k = n->row[i]; k < n->row[i + 1]; k++) SM_ELEMENT_D(J, i, n->column[k]) = n->rate[k];
    break;
  case 'b':
    for (int i = 0; i < n->nodes; i++)
      for (int k = n->row[i]; k < n->row[i + 1]; k++) SM_ELEMENT_B(J, i, n->column[k]) = n->rate[k];
    break;
  case 'k': {
    sunindextype *rows = SM_INDEXPTRS_S(J), *cols = SM_INDEXVALS_S(J);
    for (int i = 0; i <= n->nodes; i++) rows[i] = n->row[i];
    for (int k = 0; k < n->row[n->nodes]; k++) cols[k] = n->column[k], SM_DATA_S(J)[k] = n->rate[k];
    break;
  }
  }
  return 0;
}

static double clockNow(void) {
  struct timespec t;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return t.tv_sec + 1e-9 * t.tv_nsec;
}

static int ascending(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

int main(int argc, char **argv) {
  if (argc != 8) die("usage: cvode NETWORK dense|band|klu over|stop|anew ORDER RTOL RUNS OUT");
  Network n = {0};
  load(argv[1], &n);
  n.solver = argv[2][0];
  char mode = argv[3][0];
  int order = atoi(argv[4]), runs = atoi(argv[6]);
  double rtol = atof(argv[5]);
  if (order < 1 || order > 5 || runs < 1 || !(rtol > 0)) die("ORDER is 1 to 5, RUNS at least 1, RTOL above 0");
  if (!strchr("osa", mode)) die("MODE is over, stop or anew");

  SUNContext ctx;
  must(SUNContext_Create(NULL, &ctx), "SUNContext_Create");
  N_Vector y = N_VNew_Serial(n.nodes, ctx);
  double *T = N_VGetArrayPointer(y);
  SUNMatrix J = NULL;
  SUNLinearSolver solver = NULL;
  switch (n.solver) {
  case 'd':
    J = SUNDenseMatrix(n.nodes, n.nodes, ctx);
    solver = SUNLinSol_Dense(y, J, ctx);
    break;
  case 'b':
    J = SUNBandMatrix(n.nodes, n.band, n.band, ctx);
    solver = SUNLinSol_Band(y, J, ctx);
    break;
  case 'k':
    J = SUNSparseMatrix(n.nodes, n.nodes, n.row[n.nodes], CSR_MAT, ctx);
    solver = SUNLinSol_KLU(y, J, ctx);
    break;
  default:
    die("SOLVER is dense, band or klu");
  }
  if (!J || !solver) die("no linear solver");

  double *out = room((size_t)(n.hours + 1) * n.nodes, sizeof(double));
  double *took = room(runs, sizeof(double));
  long steps = 0, evals = 0, setups = 0, jacs = 0, iters = 0, fails = 0;
  memcpy(T, n.start, n.nodes * sizeof(double));
  void *mem = CVodeCreate(CV_BDF, ctx);
  must(CVodeInit(mem, rates, 0, y), "CVodeInit");
  must(CVodeSStolerances(mem, rtol, 10 * rtol), "CVodeSStolerances");
  must(CVodeSetUserData(mem, &n), "CVodeSetUserData");
  must(CVodeSetLinearSolver(mem, solver, J), "CVodeSetLinearSolver");
  must(CVodeSetJacFn(mem, jacobian), "CVodeSetJacFn");
  must(CVodeSetMaxOrd(mem, order), "CVodeSetMaxOrd");
  must(CVodeSetMaxNumSteps(mem, 100000000), "CVodeSetMaxNumSteps");
  /* A linear system: one Jacobian holds for all of the run. */
  must(CVodeSetJacEvalFrequency(mem, 1000000000), "CVodeSetJacEvalFrequency");
  for (int r = 0; r < runs; r++) {
    memcpy(T, n.start, n.nodes * sizeof(double));
    memcpy(out, T, n.nodes * sizeof(double));
    steps = evals = setups = jacs = iters = fails = 0;
    double began = clockNow();
    must(CVodeReInit(mem, 0, y), "CVodeReInit");
    realtype t = 0;
    for (int h = 1; h <= n.hours; h++) {
      double until = h * HOUR;
      if (mode == 'a' && h > 1) {
        long s, e, u, i, f, j;
        CVodeGetNumSteps(mem, &s), CVodeGetNumRhsEvals(mem, &e), CVodeGetNumLinSolvSetups(mem, &u);
        CVodeGetNumNonlinSolvIters(mem, &i), CVodeGetNumErrTestFails(mem, &f), CVodeGetNumJacEvals(mem, &j);
        steps += s, evals += e, setups += u, iters += i, fails += f, jacs += j;
        must(CVodeReInit(mem, t, y), "CVodeReInit");
      }
      if (mode != 'o') must(CVodeSetStopTime(mem, until), "CVodeSetStopTime");
      must(CVode(mem, until, y, &t, CV_NORMAL), "CVode");
      memcpy(out + (size_t)h * n.nodes, T, n.nodes * sizeof(double));
    }
    took[r] = clockNow() - began;
    long s, e, u, i, f, j;
    CVodeGetNumSteps(mem, &s), CVodeGetNumRhsEvals(mem, &e), CVodeGetNumLinSolvSetups(mem, &u);
    CVodeGetNumNonlinSolvIters(mem, &i), CVodeGetNumErrTestFails(mem, &f), CVodeGetNumJacEvals(mem, &j);
    steps += s, evals += e, setups += u, iters += i, fails += f, jacs += j;
  }
  qsort(took, runs, sizeof(double), ascending);
  FILE *f = fopen(argv[7], "wb");
  size_t size = (size_t)(n.hours + 1) * n.nodes;
  if (!f || fwrite(out, sizeof(double), size, f) != size || fclose(f)) die("cannot write the temperatures");
  printf("%.9f %.9f %ld %ld %ld %ld %ld %ld\n", took[runs / 2], took[0], steps, evals, setups, jacs, iters, fails);
  return 0;
}
