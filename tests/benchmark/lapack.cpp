#include "lapack.h"

#include <lapacke.h>

#include <algorithm>
#include <chrono>
#include <stdexcept>
#include <vector>

extern "C" {
void openblas_set_num_threads(int threads);
int openblas_get_num_threads();
char* openblas_get_config();
}

namespace lapack {

std::string use_one_thread() {
    openblas_set_num_threads(1);
    return std::string(openblas_get_config()) + ", threads: " + std::to_string(openblas_get_num_threads());
}

int dggev(Eigen::MatrixXd& a, Eigen::MatrixXd& e) {
    const auto n = static_cast<lapack_int>(a.rows());
    static std::vector<double> real, imag, beta;
    real.resize(static_cast<size_t>(n));
    imag.resize(static_cast<size_t>(n));
    beta.resize(static_cast<size_t>(n));
    if (LAPACKE_dggev(LAPACK_COL_MAJOR, 'N', 'N', n, a.data(), n, e.data(), n, real.data(), imag.data(),
                      beta.data(), nullptr, 1, nullptr, 1) != 0)
        throw std::runtime_error("dggev did not converge");
    return n;
}

int dgeev(Eigen::MatrixXd& a, bool with_vectors) {
    const auto n = static_cast<lapack_int>(a.rows());
    std::vector<double> real(static_cast<size_t>(n)), imag(static_cast<size_t>(n));
    Eigen::MatrixXd vectors(with_vectors ? n : 1, with_vectors ? n : 1);
    if (LAPACKE_dgeev(LAPACK_COL_MAJOR, 'N', with_vectors ? 'V' : 'N', n, a.data(), n, real.data(),
                      imag.data(), nullptr, 1, vectors.data(), static_cast<lapack_int>(vectors.rows())) != 0)
        throw std::runtime_error("dgeev did not converge");
    return n;
}

double now_s() {
    return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

double median(std::vector<double> values) {
    std::nth_element(values.begin(), values.begin() + static_cast<long>(values.size() / 2), values.end());
    return values[values.size() / 2];
}

}  // namespace lapack
