#include "numerics/complex_schur.h"

template class Eigen::HessenbergDecomposition<Eigen::MatrixXcd>;
template class Eigen::ComplexSchur<Eigen::MatrixXcd>;
