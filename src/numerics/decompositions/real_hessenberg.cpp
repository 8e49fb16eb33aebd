#include "numerics/real_schur.h"

template class Eigen::HessenbergDecomposition<Eigen::MatrixXd>;
