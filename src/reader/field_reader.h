// What the files read_case*.cpp share: the visitor that reads fields, and the steps of reading a case.
#pragma once

#include <map>
#include <set>
#include <string>
#include <vector>

#include "case/describe.h"
#include "case/key.h"
#include "reader/document.h"
#include "ringquell/case.h"
#include "ringquell/read_case.h"

namespace ringquell::internal {

/// What one reading of a case shares.
struct ReadContext {
    std::string main_file;  // relative paths that "--set" names start beside it
    int positions = 1;
    std::optional<std::pair<double, double>> fit_band_hz;  // of measured beads: `require.band` where given
    std::pair<double, double> judged_band_hz{0, 0};        // `require.band`; none: zero
    // Collected on the way, whoever holds the context.
    mutable std::vector<Warning> warnings;
    mutable std::vector<std::string> files_read;
    mutable std::map<std::string, Bead> fitted;  // by file and DC resistance: positions share their parts
};

/// Adds a warning to the context's unless it is there already.
void warn_once(const ReadContext& context, const std::string& key, const std::string& text);

/// A file's path as an existing file names it, relative to that file.
std::string beside(const std::string& path, const Place& named_at, const ReadContext& context);

/// read_text_file() of a file that the case names; the context remembers it.
std::string read_named_file(const std::string& path, const Place& named_at, const std::string& key,
                            const ReadContext& context);

/// The visitor of describe() that reads one map. finish() then refuses unknown keys, and missing ones.
class FieldReader : Visitor {
  public:
    FieldReader(const Node& map, std::string path, const ReadContext& context);

    void number(const char* key, double& out, NumberSpec spec);
    void number(const char* key, std::optional<double>& out, NumberSpec spec);
    void integer(const char* key, int& out);
    void boolean(const char* key, bool& out);
    void text(const char* key, std::string& out);
    void texts(const char* key, std::vector<std::string>& out);
    void edges(const char* key, PerEdge& out);
    void die_resistance(const char* key, DieResistance& out, bool mandatory);
    void channel(const char* key, Die& die);
    void die_capacitance(const char* key, Die& die);
    void transfer_curves(const char* key, std::vector<TransferCurve>& out);
    void capacitance_rows(const char* key, CapacitanceTable& out);
    void complementary_capacitance(const char* key, ComplementaryDevice& out);
    void sections(std::vector<BeadSection>& out);
    void pairs(const char* key, std::vector<std::pair<double, double>>& out, Dimension first,
               Dimension second);
    void segments(const char* key, std::vector<double>& out, Dimension dimension);
    void temperatures(const char* key, std::vector<double>& out);
    void durations(const char* key, std::map<std::string, double>& out);
    void limits(const char* key, double& low, double& high, Dimension dimension);

    template <class E, size_t n>
    void choice(const char* key, E& out, const std::array<const char*, n>& names, bool mandatory) {
        const int found = choose(key, {names.begin(), names.end()}, mandatory);
        if (found >= 0) out = static_cast<E>(found);
    }

    template <class T, class D = Describe>
    void block(const char* key, T& out, bool mandatory = false, D describer = {}) {
        if (const Node* node = take(key, mandatory)) read_map(*node, key, out, describer);
    }
    template <class T, class D = Describe>
    void block(const char* key, std::optional<T>& out, bool = false, D describer = {}) {
        out.reset();
        if (const Node* node = take(key, false)) read_map(*node, key, out.emplace(), describer);
    }
    void block(const char* key, std::optional<Bead>& out);
    void block(const char* key, Device& out, bool required);

    /// The value of a key, which becomes a valid one; null where it is absent or null. A mandatory key that
    /// is missing is remembered for finish().
    const Node* take(const char* key, bool mandatory = false);
    void finish() const;

    [[noreturn]] void fail(const Node& at, const std::string& key, const std::string& text) const;
    std::string path_of(const std::string& key) const { return join_key(path_, key); }

  private:
    template <class T, class D>
    void read_map(const Node& node, const char* key, T& out, D describer) {
        FieldReader reader(node, path_of(key), context_);
        describer(reader, out);
        reader.finish();
    }
    int choose(const char* key, const std::vector<std::string>& names, bool mandatory);
    double checked(const Node& node, const std::string& path, NumberSpec spec) const;

    const Node& map_;
    std::string path_;
    const ReadContext& context_;
    std::vector<std::string> valid_;
    std::vector<std::string> missing_;
};

/// A scalar with a unit. Throws InputError.
double read_number(const Node& node, Dimension dimension, const std::string& path);

// ---- what is worked out while reading (read_case_measured.cpp) ----

/// An inductance in henries: a value, a shape (inductance.h), or a list of either in series.
double read_inductance(const Node& node, const std::string& path, const ReadContext& context);

/// A bead: sections, or one section, or a measured curve, fitted over `require.band` or else from 1 MHz to
/// 100 MHz.
Bead read_bead(const Node& node, const std::string& path, const ReadContext& context);

/// Whole numbers, written as such.
int read_integer(const Node& node, const std::string& path, int low, int high);

[[noreturn]] void fail_expecting(const Node& node, const std::string& path, const std::string& expected);

// ---- curves (read_case_curves.cpp) ----

/// `{points: [[5 V, 2 A], ...]}` or `{file: x.csv}`: two columns, the first strictly rising.
std::vector<std::pair<double, double>> read_curve(const Node& node, const std::string& path, Dimension first,
                                                  Dimension second, const ReadContext& context);
std::vector<std::pair<double, double>> read_pairs(const Node& node, const std::string& path, Dimension first,
                                                  Dimension second);
std::vector<TransferCurve> read_transfer(const Node& node, const std::string& path,
                                         const ReadContext& context);
CapacitanceTable read_capacitance_file(const Node& file, const std::string& path, const ReadContext& context);
CapacitanceTable read_capacitance_rows(const Node& list, const std::string& path);

// ---- trees (read_case_merge.cpp) ----

/// Puts the contents of part files in the place of `{file: ...}` for every device and bead below `root`; keys
/// beside `file` are laid over them. Throws InputError for a part that includes itself.
void expand_parts(Node& root, const ReadContext& context);
/// The same for one map that has `file`.
Node expand_part(const Node& node, const std::string& path, const ReadContext& context,
                 std::vector<std::string>& within);
/// `over` laid over `base`, key by key; `key` is the name that both have, since another form of channel,
/// capacitance or bead replaces the whole map.
Node lay_over(const Node& base, const Node& over, std::string_view key);
/// What laid over `base` gives `target`; null kind with `same` true where nothing is needed.
std::optional<Node> difference(const Node& base, const Node& target, std::string_view key);

// ---- settings (read_case_settings.cpp) ----

void apply_setting(Node& root, const Setting& setting, const ReadContext& context);

// ---- the rest of a case ----

std::vector<Coupling> read_couplings(const Node& list, const ReadContext& context, const Driver& driver);
/// One device tree for each position (`device_of` into `devices`), for the points to lay theirs over.
struct DeviceTrees {
    std::vector<Node> devices;
    std::vector<size_t> device_of;
};
Operation read_operation(const Node& node, const DeviceTrees& trees, const ReadContext& context);
Requirement read_requirement(const Node& node, const ReadContext& context);
/// Every name under `require.judge_held` must be a stage that this case walks.
void check_judge_held(const Node& require, const Case& read);
/// Gives every position that a driver returns through a Kelvin path (a wire where the key is absent).
/// InputError where nothing says where a driver's return goes.
void join_kelvin_pins(Case& read, const Node& root, const ReadContext& context);
Device read_device(const Node& node, const std::string& path, const ReadContext& context);
/// Tolerances of the case read so far, checked against it.
std::vector<Tolerance> read_spread(const Node& node, const Case& in, const ReadContext& context);
/// Fixed and curve channels that would share a current, and what a walked path needs.
void check_channels(const Case& read);
std::vector<Warning> plausibility_warnings(const Case& read);

}  // namespace ringquell::internal
