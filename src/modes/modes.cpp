#include "ringquell/modes.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <optional>

#include "modes/common_share.h"
#include "modes/effort.h"
#include "modes/gain_feed.h"
#include "modes/ranking.h"
#include "modes/sparse_modes.h"
#include "network/cache.h"
#include "network/reducer.h"
#include "numerics/small_eigen.h"

namespace ringquell {

using namespace internal;

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
    if (mode.kind == ModeKind::common) return require.common_damping.value_or(0);
    if (!require.passive_damping) return require.differential_damping;
    return std::min(require.differential_damping, *require.passive_damping + mode.gain_feed);
}

const char* kind_name(ModeKind kind) {
    return kind == ModeKind::common ? "common" : "differential";
}

namespace {

void sort_and_merge(std::vector<Mode>& modes) {
    std::sort(modes.begin(), modes.end(), [](const Mode& a, const Mode& b) {
        if (a.oscillates() != b.oscillates()) return a.oscillates();
        return a.damping_ratio() < b.damping_ratio();
    });
    std::vector<Mode> merged;
    for (const Mode& mode : modes) {
        const auto equal = std::find_if(merged.begin(), merged.end(), [&](const Mode& m) {
            constexpr double same_share = 1e-6;
            return m.kind == mode.kind && m.oscillates() == mode.oscillates() &&
                   std::abs(m.eigenvalue - mode.eigenvalue) <= equal_eigenvalues * std::abs(m.eigenvalue) &&
                   std::abs(m.common_share - mode.common_share) <= same_share;
        });
        if (equal != merged.end()) {
            equal->multiplicity += mode.multiplicity;
            equal->gain_feed = std::max(equal->gain_feed, mode.gain_feed);
        } else {
            merged.push_back(mode);
        }
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

    /// Must the gain's part in the power balance be known, for what is asked of the mode?
    bool wants_feed(const Mode& mode) const {
        return input.require.passive_damping && mode.kind == ModeKind::differential &&
               rings_in_band(mode, input.require);
    }

    Modes block(NetworkCache::Entry& entry, ModeKind kind, int multiplicity) {
        const Network& network = entry.network;
        const Reducer& reducer = entry.reduced();
        const bool vectors = input.require.passive_damping && kind == ModeKind::differential;
        eigen.compute(reducer.a(), vectors);
        Modes out;
        out.structural_zeros = reducer.structural_zeros() * multiplicity;
        out.unknowns = network.size() * multiplicity;
        out.states = static_cast<int>(reducer.a().rows()) * multiplicity;
        out.condition = reducer.condition();
        for (const auto& equal : equal_groups(eigen.eigenvalues())) {
            const std::complex<double> lambda = equal.front();
            Mode mode{lambda * natural, kind, kind == ModeKind::common ? 1.0 : 0.0, multiplicity};
            Eigen::MatrixXcd x;
            if (wants_feed(mode)) x = eigen.eigenspace(lambda, static_cast<int>(equal.size()));
            for (size_t k = 0; k < equal.size(); ++k) {
                mode.eigenvalue = equal[k] * natural;
                if (x.size() > 0)
                    mode.gain_feed =
                        gain_parts(network, mode.eigenvalue,
                                   reducer.full_vector(lambda, x.col(static_cast<Eigen::Index>(k))))
                            .feed;
                out.modes.push_back(mode);
            }
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
        for (const auto& equal : equal_groups(eigen.eigenvalues())) {
            // Kinds matter for what is in the band or grows; the rest is spared the work.
            const bool matters = std::any_of(equal.begin(), equal.end(), [&](std::complex<double> lambda) {
                return lambda.real() > 0 || (lambda.imag() > 0 && in_band({lambda * natural}, input.require));
            });
            if (n == 1 || !matters) {
                for (const auto& lambda : equal) out.modes.push_back({lambda * natural});
                continue;
            }
            add_kinds(network, reducer, equal, out.modes);
        }
        return out;
    }

    /// Equal modes, each with its own share and kind.
    void add_kinds(const Network& network, const Reducer& reducer,
                   const std::vector<std::complex<double>>& equal, std::vector<Mode>& out) {
        const auto count = static_cast<int>(equal.size());
        const Eigen::MatrixXcd reduced = eigen.eigenspace(equal.front(), count);
        Eigen::MatrixXcd x(network.size(), count);
        for (int k = 0; k < count; ++k) x.col(k) = reducer.full_vector(equal.front(), reduced.col(k));
        const SplitModes split = split_by_share(network, x, input.n());
        for (size_t k = 0; k < equal.size(); ++k) {
            Mode mode{equal[k] * natural, split.share[k] < 0.5 ? ModeKind::differential : ModeKind::common,
                      split.share[k], 1};
            if (wants_feed(mode))
                mode.gain_feed =
                    gain_parts(network, mode.eigenvalue, split.x.col(static_cast<Eigen::Index>(k))).feed;
            out.push_back(mode);
        }
    }

    /// With `resistor_ohm` in place of the edge's gate resistors the differential block alone, where there
    /// are blocks.
    Modes solve(const OperatingPoint& point, std::optional<double> resistor_ohm) {
        const bool swept = resistor_ohm.has_value();
        const auto build = [&](Block block) -> NetworkCache::Entry& {
            NetworkCache::Entry& entry = networks.at(point, {block, swept});
            if (swept) set_gate_resistor(entry, point.edge, *resistor_ohm);
            return entry;
        };
        const bool by_blocks = method == Method::blocks || (method == Method::automatic && alike(point));
        if (method == Method::blocks && !alike(point))
            throw InputError(
                {}, "positions",
                "the positions, rails or couplings are not alike, so the network does not split into blocks");
        Modes out;
        if (by_blocks) {
            if (!swept) out = block(build(Block::common), ModeKind::common, 1);
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
            NetworkCache::Entry& entry = build(Block::whole);
            if (method == Method::sparse || (method == Method::automatic && input.n() >= sparse_from)) {
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
        for (const size_t i : gate_resistor_elements(entry.network, input, edge)) entry.set(i, resistor_ohm);
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
    return state_->solve(point, {});
}
std::vector<Mode> ModeSolver::with_gate_resistor(const OperatingPoint& point, double resistor_ohm) {
    return state_->solve(point, resistor_ohm).modes;
}

}  // namespace ringquell
