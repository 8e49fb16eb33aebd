// What SmallEigen and eigenpairs() of a real matrix share of Eigen, compiled once (decompositions/real_schur.cpp).
#pragma once

#include <Eigen/Eigenvalues>

extern template class Eigen::HessenbergDecomposition<Eigen::MatrixXd>;
extern template class Eigen::RealSchur<Eigen::MatrixXd>;
extern template Eigen::RealSchur<Eigen::MatrixXd>& Eigen::RealSchur<Eigen::MatrixXd>::compute(
    const Eigen::EigenBase<Eigen::MatrixXd>&, bool);
extern template Eigen::RealSchur<Eigen::MatrixXd>& Eigen::RealSchur<Eigen::MatrixXd>::computeFromHessenberg(
    const Eigen::MatrixXd&, const Eigen::MatrixXd&, bool);
