#include "modes/sensitivity.h"

#include <cmath>

#include "modes/along.h"
#include "network/reducer.h"

namespace ringquell::internal {

double damping_change(std::complex<double> eigenvalue, std::complex<double> change) {
    const double size = std::abs(eigenvalue);
    return -change.real() / size +
           eigenvalue.real() * (std::conj(eigenvalue) * change).real() / (size * size * size);
}

ModeShares mode_shares(const Network& network, std::complex<double> eigenvalue) {
    ModeShares out{probe(network, eigenvalue), {}};
    const Eigen::VectorXcd& x = out.pair.x;
    const Eigen::SparseMatrix<double> e = network.e() * natural;
    const double energy = x.dot(Eigen::VectorXcd(e * x)).real();
    const double scale = std::abs(out.pair.eigenvalue) / natural * energy;
    std::vector<const Element*> by_coefficient;
    for (const Element& m : network.elements)
        if (m.by_coefficient) by_coefficient.push_back(&m);
    for (size_t i = 0; i < network.elements.size(); ++i) {
        const Element& element = network.elements[i];
        ElementShare share;
        share.key = element.label();
        share.kind = element.number_kind();
        share.value = element.number();
        const double product = (std::conj(along(element.left, x)) * along(element.right, x)).real();
        if (element.in_e())
            share.energy_share =
                element.value * natural * product * (element.kind == ElementKind::mutual ? 2 : 1) / energy;
        else
            share.damping_share = element.value * product / scale;
        std::complex<double> change =
            derivative(out.pair, element) * element.value;  // dλ/d ln(stamped value)
        if (element.reciprocal) change = -change;
        // M = k·√(La·Lb): a coupling by coefficient grows with half the relative change of each of the two
        // inductances it names.
        for (const Element* m : by_coefficient)
            if (m->first == static_cast<int>(i) || m->second == static_cast<int>(i))
                change += 0.5 * derivative(out.pair, *m) * m->value;
        share.damping_slope = damping_change(out.pair.eigenvalue, change);
        out.elements.push_back(std::move(share));
    }
    return out;
}

}  // namespace ringquell::internal
