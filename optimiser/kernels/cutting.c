// Inner loops of the cutting solver.
#include <stdint.h>
