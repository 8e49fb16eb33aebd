#include "numerics/real_schur.h"

template class Eigen::RealSchur<Eigen::MatrixXd>;
template Eigen::RealSchur<Eigen::MatrixXd>& Eigen::RealSchur<Eigen::MatrixXd>::compute(
    const Eigen::EigenBase<Eigen::MatrixXd>&, bool);
template Eigen::RealSchur<Eigen::MatrixXd>& Eigen::RealSchur<Eigen::MatrixXd>::computeFromHessenberg(
    const Eigen::MatrixXd&, const Eigen::MatrixXd&, bool);
