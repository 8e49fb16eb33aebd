#include "modes/gain_feed.h"

#include <algorithm>

#include "modes/along.h"

namespace ringquell::internal {

GainParts gain_parts(const Network& network, std::complex<double> eigenvalue, const Eigen::VectorXcd& x) {
    GainParts out;
    double energy = 0;  // xᴴEx
    for (const Element& e : network.elements) {
        if (!e.in_e() && e.kind != ElementKind::transconductance) continue;
        const double part = e.value * (std::conj(along(e.left, x)) * along(e.right, x)).real();
        if (e.kind == ElementKind::transconductance) {
            out.all += part;
            out.feed += std::max(0.0, -part);
        } else {
            energy += e.kind == ElementKind::mutual ? 2 * part : part;
        }
    }
    const double scale = 1 / (std::abs(eigenvalue) * energy);
    out.all *= scale;
    out.feed *= scale;
    return out;
}

}  // namespace ringquell::internal
