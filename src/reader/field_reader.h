// The visitor that reads the fields of one map; describe.h says which.
#pragma once

#include <array>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "case/describe.h"
#include "case/key.h"
#include "reader/document.h"
#include "reader/read_context.h"

namespace ringquell::internal {

/// The visitor of describe() that reads one map. finish() then refuses unknown keys, and missing ones.
class FieldReader : Visitor {
  public:
    FieldReader(const Node& map, std::string path, ReadContext& context);

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
    ReadContext& context_;
    std::vector<std::string> valid_;
    std::vector<std::string> missing_;
};

/// A scalar with a unit. Throws InputError.
double read_number(const Node& node, Dimension dimension, const std::string& path);

/// A whole number, written as such.
int read_integer(const Node& node, const std::string& path, int low, int high);

[[noreturn]] void fail_expecting(const Node& node, const std::string& path, const std::string& expected);

}  // namespace ringquell::internal
