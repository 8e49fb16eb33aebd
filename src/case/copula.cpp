#include "case/copula.h"

#include <cmath>

namespace ringquell::internal {

double correlation(const Loadings& a, const Loadings& b) {
    double sum = 0;
    for (const auto& [number, factor] : a)
        if (const auto other = b.find(number); other != b.end()) sum += factor * other->second;
    return sum;
}

/// By Cholesky's rows of the correlations among the given ones, L·Lᵀ, with the variable itself as the last row.
Regression regression(const std::vector<const Loadings*>& given, const std::vector<double>& coefficients) {
    constexpr double nothing =
        1e-9;  // of a variance: far above what rounding leaves, far below what is meant
    const size_t n = given.size();
    std::vector<std::vector<double>> rows(n + 1);
    Regression out;
    for (size_t i = 0; i <= n; ++i) {
        double left = 1;
        for (size_t j = 0; j < i; ++j) {
            double x = i == n ? coefficients[j] : correlation(*given[i], *given[j]);
            for (size_t k = 0; k < j; ++k) x -= rows[i][k] * rows[j][k];
            rows[i].push_back(x / rows[j][j]);
            left -= rows[i][j] * rows[i][j];
        }
        if (i < n && left < nothing) {
            out.moves_with_others = static_cast<int>(i);
            return out;
        }
        if (i == n) out.variance = n > 1 && std::abs(left) < nothing ? 0 : left;
        rows[i].push_back(std::sqrt(left));
    }
    out.weights.assign(n, 0.0);
    for (size_t i = n; i-- > 0;) {
        double x = rows[n][i];
        for (size_t k = i + 1; k < n; ++k) x -= rows[k][i] * out.weights[k];
        out.weights[i] = x / rows[i][i];
    }
    return out;
}

}  // namespace ringquell::internal
