"""Addresses of the recipes pages."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.core.moments import day_at
from server.people.access import Db, Now, Technician
from server.recipes.actions import add_recipe, make_usual, set_solution, write_edition
from server.recipes.forms import (
    Compared,
    ComponentTable,
    MadeSolution,
    NewEdition,
    NewRecipe,
    ShelfRow,
    Wanted,
    read_components,
    read_shelf,
)
from server.recipes.pages import edition_page, recipe_page, recipes_page, weigh_out_page
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, read, submitted

router = APIRouter()


@router.get("/recipes", name="recipes.recipes")
def recipes(request: Request, session: Db, signed: Technician) -> Response:
    return show(request, "recipes/recipes.html", recipes_page(session, signed.time_zone))


@router.post("/recipes", name="recipes.add")
def add(
    request: Request,
    session: Db,
    signed: Technician,
    form: Annotated[Submitted[NewRecipe], Depends(submitted(NewRecipe))],
) -> Response:
    if form.clean is None:
        page = recipes_page(session, signed.time_zone, form)
        return show(request, "recipes/recipes.html", page, status=422)
    recipe = add_recipe(session, name=form.clean.name, solution=form.clean.solution)
    return seen(request, "recipes.next_edition", recipe_id=recipe.id)


@router.get("/recipes/{recipe_id}", name="recipes.recipe")
def recipe(request: Request, session: Db, signed: Technician, recipe_id: RowId) -> Response:
    return show(request, "recipes/recipe.html", recipe_page(session, recipe_id, signed.time_zone))


@router.get("/recipes/{recipe_id}/editions/{number}", name="recipes.edition")
def edition(request: Request, session: Db, signed: Technician, recipe_id: RowId, number: RowId) -> Response:
    compared = read(Compared, request.query_params).clean
    since = compared.since if compared else None
    page = recipe_page(session, recipe_id, signed.time_zone, number=number, since=since)
    return show(request, "recipes/recipe.html", page)


@router.get("/recipes/{recipe_id}/editions/{number}/weigh-out", name="recipes.weigh_out")
def weigh_out(
    request: Request, session: Db, now: Now, signed: Technician, recipe_id: RowId, number: RowId
) -> Response:
    typed, day = request.query_params, day_at(now, signed.time_zone)
    wanted = read(Wanted, typed) if typed else Submitted[Wanted]()
    shelf = read_shelf({name: typed.getlist(name) for name in ShelfRow.model_fields})
    page = weigh_out_page(session, recipe_id, number, day, wanted, shelf)
    return show(request, "recipes/weigh_out.html", page, status=422 if page.faults else 200)


@router.post("/recipes/{recipe_id}/solution", name="recipes.set_solution")
def say_what_it_makes(
    request: Request,
    session: Db,
    signed: Technician,
    recipe_id: RowId,
    form: Annotated[Submitted[MadeSolution], Depends(submitted(MadeSolution))],
) -> Response:
    if form.clean is None:
        page = recipe_page(session, recipe_id, signed.time_zone, made=form)
        return show(request, "recipes/recipe.html", page, status=422)
    set_solution(session, recipe_id, form.clean.solution)
    return seen(request, "recipes.recipe", recipe_id=recipe_id)


@router.post("/recipes/{recipe_id}/usual", name="recipes.make_usual")
def plan_with(request: Request, session: Db, _signed: Technician, recipe_id: RowId) -> Response:
    make_usual(session, recipe_id)
    return seen(request, "recipes.recipe", recipe_id=recipe_id)


@router.get("/recipes/{recipe_id}/next-edition", name="recipes.next_edition")
def next_edition(request: Request, session: Db, _signed: Technician, recipe_id: RowId) -> Response:
    return show(request, "recipes/edition.html", edition_page(session, recipe_id))


@router.post("/recipes/{recipe_id}/next-edition", name="recipes.write_edition")
def write(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    recipe_id: RowId,
    form: Annotated[Submitted[NewEdition], Depends(submitted(NewEdition))],
    table: Annotated[Submitted[ComponentTable], Depends(submitted(ComponentTable))],
) -> Response:
    lines, components = read_components(table.clean or ComponentTable())
    if form.clean is None or any(line.errors for line in lines):
        page = edition_page(session, recipe_id, form, lines)
        return show(request, "recipes/edition.html", page, status=422)
    write_edition(session, recipe_id, components, **form.clean.kept(), by=signed.name, now=now)
    return seen(request, "recipes.recipe", recipe_id=recipe_id)
