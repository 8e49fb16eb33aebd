#include "ringquell/modes.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>

#include "common_share.h"
#include "network_cache.h"
#include "ringquell/state_space.h"
#include "small_eigen.h"
#include "sparse_modes.h"

namespace ringquell {

double Mode::natural_frequency_hz() const {
    return std::abs(eigenvalue) / (2 * std::numbers::pi);
}
double Mode::ringing_frequency_hz() const {
    return std::abs(eigenvalue.imag()) / (2 * std::numbers::pi);
}
double Mode::damping_ratio() const {
    return -eigenvalue.real() / std::abs(eigenvalue);
}

bool in_band(const Mode& mode, const Requirement& require) {
    const double f = mode.natural_frequency_hz();
    return f >= require.band_low_hz && f <= require.band_high_hz;
}

double damping_target(const Mode& mode, const Requirement& require) {
    return mode.kind == ModeKind::differential ? require.differential_damping
                                               : require.common_damping.value_or(0);
}

const char* kind_name(ModeKind kind) {
    return kind == ModeKind::common ? "common" : "differential";
}

namespace {

/// Equal eigenvalues split by rounding; this share of their size is far above that and far below what parts
/// can tell.
constexpr double equal_eigenvalues = 1e-9;
/// A pair this close to the real axis (damping ratio above 1 − 5e-13) is two real eigenvalues that rounding
/// joined.
constexpr double real_pair = 1e-6;

bool nearly_real(std::complex<double> lambda) {
    return std::abs(lambda.imag()) <= real_pair * std::abs(lambda);
}

void sort_and_merge(std::vector<Mode>& modes) {
    std::sort(modes.begin(), modes.end(), [](const Mode& a, const Mode& b) {
        if (a.oscillates() != b.oscillates()) return a.oscillates();
        return a.damping_ratio() < b.damping_ratio();
    });
    std::vector<Mode> merged;
    for (const Mode& mode : modes) {
        const auto equal = std::find_if(merged.begin(), merged.end(), [&](const Mode& m) {
            return m.kind == mode.kind && m.oscillates() == mode.oscillates() &&
                   std::abs(m.eigenvalue - mode.eigenvalue) <= equal_eigenvalues * std::abs(m.eigenvalue);
        });
        if (equal != merged.end())
            equal->multiplicity += mode.multiplicity;
        else
            merged.push_back(mode);
    }
    modes = std::move(merged);
}

}  // namespace

struct ModeSolver::State {
    const Case& input;
    Method method;
    bool case_alike;
    NetworkCache networks;
    SmallEigen eigen;
    SparseModeSolver sparse;

    State(const Case& c, Method m) : input(c), method(m), case_alike(false), networks(c), sparse(c.n()) {
        changed();
    }

    void changed() {
        OperatingPoint probe_point;
        probe_point.devices.resize(1);
        case_alike = positions_alike(input, probe_point);
        networks.case_changed();
    }

    bool alike(const OperatingPoint& point) const { return case_alike && point.devices.size() <= 1; }

    Modes block(NetworkCache::Entry& entry, ModeKind kind, int multiplicity) {
        const Network& network = entry.network;
        const Reducer& reducer = entry.reduced();
        eigen.compute(reducer.a(), false);
        Modes out;
        out.structural_zeros = reducer.structural_zeros() * multiplicity;
        out.unknowns = network.size() * multiplicity;
        out.states = static_cast<int>(reducer.a().rows()) * multiplicity;
        out.condition = reducer.condition();
        for (auto lambda : eigen.eigenvalues()) {
            if (nearly_real(lambda)) lambda.imag(0);
            if (lambda.imag() >= 0)
                out.modes.push_back(
                    {lambda * natural, kind, kind == ModeKind::common ? 1.0 : 0.0, multiplicity});
        }
        return out;
    }

    Modes whole(NetworkCache::Entry& entry) {
        const Network& network = entry.network;
        const Reducer& reducer = entry.reduced();
        const int n = input.n();
        eigen.compute(reducer.a(), n > 1);
        Modes out;
        out.structural_zeros = reducer.structural_zeros();
        out.unknowns = network.size();
        out.states = static_cast<int>(reducer.a().rows());
        out.condition = reducer.condition();
        for (auto lambda : eigen.eigenvalues()) {
            if (nearly_real(lambda)) lambda.imag(0);
            if (lambda.imag() < 0) continue;
            Mode mode{lambda * natural, ModeKind::common, 1, 1};
            // Kinds matter for what is in the band or grows; the rest is spared the work.
            if (n > 1 && (lambda.real() > 0 || (lambda.imag() > 0 && in_band(mode, input.require)))) {
                const Eigen::VectorXcd x = reducer.full_vector(lambda, eigen.eigenvector(lambda));
                mode.common_share = common_share(network, x, n);
                mode.kind = mode.common_share < 0.5 ? ModeKind::differential : ModeKind::common;
            }
            out.modes.push_back(mode);
        }
        return out;
    }

    Modes solve(const OperatingPoint& point, double resistor_ohm, bool differential_only) {
        const bool swept = resistor_ohm >= 0;
        const auto build = [&](Block block) -> NetworkCache::Entry& {
            NetworkCache::Entry& entry = networks.at(point, {block, swept});
            if (swept) set_gate_resistor(entry, point.edge, resistor_ohm);
            return entry;
        };
        const bool by_blocks = method == Method::blocks || (method == Method::automatic && alike(point));
        if (method == Method::blocks && !alike(point))
            throw InputError(
                {}, "positions",
                "the positions, rails or couplings are not alike, so the network does not split into blocks");
        Modes out;
        if (by_blocks) {
            if (!differential_only) out = block(build(Block::common), ModeKind::common, 1);
            if (input.n() > 1) {
                Modes differential = block(build(Block::differential), ModeKind::differential, input.n() - 1);
                out.modes.insert(out.modes.end(), differential.modes.begin(), differential.modes.end());
                out.structural_zeros += differential.structural_zeros;
                out.unknowns += differential.unknowns;
                out.states += differential.states;
                out.condition = std::max(out.condition, differential.condition);
            }
            out.method = Method::blocks;
        } else {
            constexpr int many = 128;  // positions from which shift-invert over the band is cheaper
            NetworkCache::Entry& entry = build(Block::whole);
            if (method == Method::sparse || (method == Method::automatic && input.n() >= many)) {
                out = sparse_modes(sparse, entry.network, input);
            } else {
                out = whole(entry);
                out.method = Method::whole;
            }
        }
        sort_and_merge(out.modes);
        return out;
    }

    void set_gate_resistor(NetworkCache::Entry& entry, Edge edge, double resistor_ohm) const {
        for (size_t i = 0; i < entry.network.elements.size(); ++i) {
            const Element& e = entry.network.elements[i];
            if (e.position > 0 && e.name == gate_resistor_element(input, edge, e.position - 1))
                entry.set(i, resistor_ohm);
        }
    }
};

ModeSolver::ModeSolver(const Case& input, Method method) : state_(std::make_unique<State>(input, method)) {}
ModeSolver::~ModeSolver() = default;
ModeSolver::ModeSolver(ModeSolver&&) noexcept = default;
const Case& ModeSolver::input() const {
    return state_->input;
}
bool ModeSolver::alike(const OperatingPoint& point) const {
    return state_->alike(point);
}
void ModeSolver::case_changed() {
    state_->changed();
}
Modes ModeSolver::solve(const OperatingPoint& point) {
    return state_->solve(point, -1, false);
}
std::vector<Mode> ModeSolver::with_gate_resistor(const OperatingPoint& point, double resistor_ohm) {
    return state_->solve(point, resistor_ohm, true).modes;
}

}  // namespace ringquell
