// compiled kernels
