// Inner loops of the joint layout.
#include <stdint.h>
