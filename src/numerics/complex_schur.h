// What eigenpairs() of a complex matrix takes of Eigen, compiled apart (decompositions/complex_schur.cpp).
#pragma once

#include <Eigen/Eigenvalues>

extern template class Eigen::HessenbergDecomposition<Eigen::MatrixXcd>;
extern template class Eigen::ComplexSchur<Eigen::MatrixXcd>;
