import copy
import inspect
import multiprocessing
import pickle
from concurrent.futures import ProcessPoolExecutor

import pytest

import recommender
from recommender import errors
from recommender.archive.execution import OtherEvidence
from recommender.errors import (
    AmbiguousMaterial,
    BadNotebook,
    BadTable,
    BadValue,
    ChangedMeanwhile,
    RecommenderError,
    SpoiltCas,
    StaleTable,
    UnknownFacet,
    UnknownMaterial,
    WrongCas,
)


@pytest.mark.parametrize("kind", [UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadTable, StaleTable])
def test_every_error_has_the_one_root(kind):
    assert issubclass(kind, RecommenderError)


def test_a_stale_table_is_a_bad_table():
    assert issubclass(StaleTable, BadTable)


def test_the_tree_in_the_docstring_names_every_error():
    named = {
        name
        for name, value in vars(errors).items()
        if inspect.isclass(value) and value.__module__ == errors.__name__
    }
    assert all(name in errors.__doc__ for name in named)


def test_an_unknown_material_carries_the_near_names():
    error = UnknownMaterial("vanilin", ["vanillin", "ethyl vanillin"])
    assert (error.name, error.near) == ("vanilin", ("vanillin", "ethyl vanillin"))
    assert str(error) == 'no material is called "vanilin". Did you mean vanillin, ethyl vanillin?'


def test_an_unknown_material_without_near_names_says_where_to_look():
    assert str(UnknownMaterial("x")) == (
        'no material is called "x". `recommender materials` lists what is known.'
    )


def test_an_unknown_facet_carries_the_phrase_and_near_words():
    error = UnknownFacet("almund", ["almond"])
    assert (error.phrase, error.near) == ("almund", ("almond",))
    assert str(error) == 'no facet is known by "almund". Did you mean almond?'


def test_an_unknown_facet_without_near_words_says_where_to_look():
    assert "`recommender facets`" in str(UnknownFacet("x"))


def test_a_wrong_cas_says_which_digit_was_expected():
    error = WrongCas("100-52-8", 7)
    assert (error.cas, error.expected) == ("100-52-8", 7)
    assert "100-52-8" in str(error)
    assert "would be 7" in str(error)


def test_a_bad_value_says_field_value_and_what_is_wanted():
    error = BadValue("top", 0, "it is 1 or more")
    assert (error.field, error.value, error.wanted) == ("top", 0, "it is 1 or more")
    assert str(error) == 'top cannot be "0": it is 1 or more'


def test_a_bad_value_is_worded_with_the_names_of_whoever_asked():
    error = BadValue("blend", 2, "it is answered without {within}")
    assert str(error) == 'blend cannot be "2": it is answered without within'
    named = error.named({"blend": "--blend", "within": "--in"})
    assert str(named) == '--blend cannot be "2": it is answered without --in'
    assert (named.field, named.value, named.wanted) == (error.field, error.value, error.wanted)


def test_a_bad_table_names_file_line_column_and_remedy():
    error = BadTable("shelf.csv", "not a number", line=4, column="grams", remedy="Write a number")
    assert str(error) == "shelf.csv, line 4, column grams: not a number. Write a number"
    assert (error.file, error.line, error.column) == ("shelf.csv", 4, "grams")


def test_a_bad_table_leaves_out_what_it_does_not_know():
    assert str(BadTable("shelf.csv", "the table is empty")) == "shelf.csv: the table is empty"


@pytest.mark.parametrize(
    "error",
    [
        UnknownMaterial("x", ["y"]),
        UnknownFacet("x"),
        WrongCas("1-1-1", 2),
        BadValue("--top", 0, "more"),
        BadTable("f", "p"),
    ],
)
def test_every_message_is_one_line(error):
    assert "\n" not in str(error)


ONE_OF_EACH = [
    RecommenderError("what is wrong"),
    UnknownMaterial("vanilin", ["vanillin", "ethyl vanillin"]),
    AmbiguousMaterial("cedarwood", ["cedarwood oil atlas", "cedarwood oil texas"]),
    SpoiltCas("8007-02-01", "8007-02-1", "lemongrass oil"),
    UnknownFacet("almund", ["almond"]),
    WrongCas("100-52-8", 7),
    BadValue("--top", 0, "it is 1 or more"),
    BadNotebook("notebook.sqlite", "it is no notebook", "Name another"),
    ChangedMeanwhile("the note", "hay"),
    BadTable("shelf.csv", "not a number", line=4, column="grams", remedy="Write a number"),
    StaleTable("labels.csv", "it was edited", remedy="Build it again"),
    OtherEvidence("scheduler", "tcp://127.0.0.1:8786", "its workers have other tables"),
]


def below(kind: type) -> set[type]:
    return {kind}.union(*(below(one) for one in kind.__subclasses__()))


def test_the_sample_has_one_of_each_error():
    assert {type(error) for error in ONE_OF_EACH} == below(RecommenderError)


@pytest.mark.parametrize("error", ONE_OF_EACH, ids=lambda error: type(error).__name__)
@pytest.mark.parametrize(
    "again",
    [
        *(lambda e, p=p: pickle.loads(pickle.dumps(e, p)) for p in range(pickle.HIGHEST_PROTOCOL + 1)),
        copy.copy,
        copy.deepcopy,
    ],
    ids=[*(f"pickle {p}" for p in range(pickle.HIGHEST_PROTOCOL + 1)), "copy", "deepcopy"],
)
def test_an_error_pickles_and_copies_with_message_and_fields(error, again):
    error.add_note("line 3 of the batch")
    found = again(error)
    assert type(found) is type(error)
    assert str(found) == str(error)
    assert found.args == error.args
    assert vars(found) == vars(error)


def test_one_bad_call_does_not_break_a_pool_of_processes():
    start = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(1, mp_context=start) as pool:
        wrong = pool.submit(recommender.material, "vanilin")
        right = pool.submit(recommender.material, "vanillin")
        with pytest.raises(UnknownMaterial) as caught:
            wrong.result(timeout=120)
        assert caught.value.name == "vanilin"
        assert "vanillin" in caught.value.near
        assert right.result(timeout=120).name == "vanillin"
