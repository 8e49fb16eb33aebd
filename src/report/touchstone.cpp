#include <fmt/format.h>

#include "ringquell/ports.h"
#include "ringquell/report.h"

namespace ringquell {

namespace {

std::string pair(std::complex<double> x) {
    return fmt::format(" {:.12g} {:.12g}", x.real(), x.imag());
}

/// One frequency: two ports in the order 11 21 12 22, more of them row by row, four pairs a line at most.
std::string rows(double hz, const Eigen::MatrixXcd& s) {
    std::string out = fmt::format("{:.12g}", hz);
    const Eigen::Index n = s.rows();
    if (n <= 2) {
        for (Eigen::Index j = 0; j < n; ++j)
            for (Eigen::Index i = 0; i < n; ++i) out += pair(s(i, j));
        return out + "\n";
    }
    constexpr Eigen::Index pairs_of_line = 4;
    for (Eigen::Index i = 0; i < n; ++i)
        for (Eigen::Index j = 0; j < n; ++j) {
            if ((j > 0 && j % pairs_of_line == 0) || (j == 0 && i > 0)) out += "\n";
            out += pair(s(i, j));
        }
    return out + "\n";
}

}  // namespace

std::string touchstone_text(const Scattering& scattering, const std::string& origin) {
    std::string out = fmt::format("! {}, {}; computed by ringquell {} from the case, nothing measured\n",
                                  origin, scattering.point, version);
    for (size_t k = 0; k < scattering.ports.size(); ++k)
        out += fmt::format("! port {}: {} to {}\n", k + 1, scattering.ports[k].first,
                           scattering.ports[k].second);
    out += fmt::format("# Hz S RI R {:.12g}\n", scattering.reference_ohm);
    for (size_t k = 0; k < scattering.s.size(); ++k) out += rows(scattering.frequency_hz[k], scattering.s[k]);
    return out;
}

}  // namespace ringquell
